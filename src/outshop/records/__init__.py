"""What is kept: pieces, recordings, measurements, jobs, releases."""
