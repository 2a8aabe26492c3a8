"""fxseq: describe, preview, measure and build hand-held props with light and sound."""
