"""The pages: server-rendered HTML for reading, small modules that write through the same interface as any program."""
