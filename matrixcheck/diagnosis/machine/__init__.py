"""What can be there: the matrices as arrays, every fault that they can have, and its prior."""
