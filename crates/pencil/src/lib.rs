//! Linear systems (G + sC)x = b: structure, a fixed elimination order, and its replay over lanes, always checked.
