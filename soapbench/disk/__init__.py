"""Everything that touches the file system: plan files, tables, the batch log and the bench."""
