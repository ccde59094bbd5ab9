//! Shared by the tests: generators and an exhaustive solver.
