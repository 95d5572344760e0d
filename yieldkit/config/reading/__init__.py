"""What a file holds, as plain values that remember their lines, and how a fault is told."""
