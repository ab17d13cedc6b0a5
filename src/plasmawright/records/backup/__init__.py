"""One encrypted file that holds everything, and the way back. Its format stands in docs/reference/backup-file.md."""
