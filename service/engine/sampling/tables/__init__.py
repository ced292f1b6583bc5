"""Published tables of sampling plans as rows of text, laid out as on the printed page, parsed at first use."""

# Text and not data structures, so that a reader can hold page and table side by side. Tests in tests/outside compare every
# cell with the resolved plans of published transcriptions, and say where these have misprints.
