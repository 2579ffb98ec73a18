//! Trees to a named circuit: nodes, parts, stages, controls, data sheets; its structural faults.
