//go:build !linux

package main

import "errors"

func mountSmall(string, int) error { return errors.ErrUnsupported }
func growSmall(string, int) error  { return errors.ErrUnsupported }
func unmountSmall(string) error    { return errors.ErrUnsupported }
