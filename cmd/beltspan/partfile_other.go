//go:build !windows

package main

import (
	"errors"
	"os"
	"syscall"
)

// openPart opens a file to write and keeps other runs out of it until it is
// closed, or until its process ends in whatever way. errInUse tells that
// another one has it. It may get its own name while it is open.
func openPart(path string) (*os.File, error) {
	for {
		file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o666) //nolint:gosec // results are no secret: the umask decides
		if err != nil {
			return nil, err
		}
		again, err := lockPart(file, path)
		if err == nil && !again {
			return file, nil
		}
		if err := errors.Join(err, file.Close()); err != nil {
			return nil, err
		}
	}
}

// lockPart locks a file. Where another run gave it another name or removed it
// before, it is to be opened again.
func lockPart(file *os.File, path string) (again bool, err error) {
	err = syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	switch {
	case errors.Is(err, syscall.EWOULDBLOCK):
		return false, errInUse
	case errors.Is(err, errors.ErrUnsupported), errors.Is(err, syscall.ENOLCK):
		return false, nil // a file system without locks: nothing keeps others out
	case err != nil:
		return false, &os.PathError{Op: "lock", Path: path, Err: err}
	}
	locked, err := file.Stat()
	if err != nil {
		return false, err
	}
	now, err := os.Stat(path)
	return err != nil || !os.SameFile(locked, now), nil
}
