//! Values with units: prefixes, marking codes, preferred series, dimensions, and how a number is printed.
