//go:build race

package server

// raceDetector is whether this binary carries the race detector, which keeps a
// shadow of all memory.
const raceDetector = true
