"""What nobody knows exactly, drawn for several wirings at once, and what is settled."""
