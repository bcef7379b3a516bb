package main

import (
	"errors"
	"os"
	"syscall"
)

// errorSharingViolation is ERROR_SHARING_VIOLATION of the Windows API.
const errorSharingViolation syscall.Errno = 32

// openPart opens a file to write and keeps other runs out of it until it is
// closed, or until its process ends in whatever way. errInUse tells that
// another one has it. It may get its own name while it is open.
func openPart(path string) (*os.File, error) {
	name, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		return nil, &os.PathError{Op: "open", Path: path, Err: err}
	}
	// Sharing covers readers and the last rename, but no second writer.
	handle, err := syscall.CreateFile(name, syscall.GENERIC_READ|syscall.GENERIC_WRITE,
		syscall.FILE_SHARE_READ|syscall.FILE_SHARE_DELETE, nil, syscall.OPEN_ALWAYS, syscall.FILE_ATTRIBUTE_NORMAL, 0)
	switch {
	case errors.Is(err, errorSharingViolation):
		return nil, errInUse
	case err != nil:
		return nil, &os.PathError{Op: "open", Path: path, Err: err}
	}
	return os.NewFile(uintptr(handle), path), nil
}
