"""The version of the package, kept here because asking the installed package for it takes longer than a weighing."""

VERSION = "0.1.0"
