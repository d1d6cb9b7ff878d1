"""The coach for screens, in a process of its own."""
