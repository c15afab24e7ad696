"""Many pieces: files, executors, and resuming an interrupted run."""
