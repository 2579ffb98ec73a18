//! Circuit to numbers: the pencil, the fixed-order solver, and the readings.
