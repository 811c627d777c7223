//! Rehearsed calls: the planner, its rivals and the all-knowing technician on the same draws.
