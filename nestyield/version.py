"""The version of the program, where every room may read it."""

VERSION = "0.1.0"
