"""HTTP resources and the problem documents they answer with."""
