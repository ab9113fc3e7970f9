"""Many recordings, on all cores of one machine or on a cluster. What is done with each is told by the caller."""
