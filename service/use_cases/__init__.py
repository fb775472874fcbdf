"""What a person or a client can do, one verb a file."""
