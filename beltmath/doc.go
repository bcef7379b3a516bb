// Package beltmath computes open synchronous belt drives: two pulleys, one
// closed timing belt, fixed centers.
//
// Lengths are millimeters, angles radians, tooth counts plain integers; the
// unit is part of every exported name. Nothing here reads a clock, a file or a
// global that changes: the same input gives the same answer, in any order,
// from any number of goroutines.
package beltmath
