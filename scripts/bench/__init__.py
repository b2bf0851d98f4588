"""What the benchmarks alone need: strips and equal bins on a grid of their own, and exact search for perfect fits."""
