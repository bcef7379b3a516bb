//go:build !linux

package server

// giveWay does nothing here.
func giveWay() {}
