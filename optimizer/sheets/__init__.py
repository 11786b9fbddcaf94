"""What is held in the hand in the garden: drawings, lists and the field book. Knows plans and units, solves nothing."""
