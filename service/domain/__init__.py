"""The rules of the trade and of the job: pure values and functions, standard library only."""
