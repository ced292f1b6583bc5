"""Published tables of sampling plans, as rows of text that can be held beside the printed page; read at their first use."""
