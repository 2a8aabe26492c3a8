"""The typed description of a prop, its file and its errors. The lowest floor: imports nothing of fxseq."""
