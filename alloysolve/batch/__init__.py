"""Many pieces: files, executors, resuming an interrupted run."""
