"""The pages: HTML rendered here for reading, small modules that write as any other program does."""
