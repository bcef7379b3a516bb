package main

import (
	"strconv"
	"syscall"
)

// A small disk is a file system in memory, which only root may mount.

func mountSmall(dir string, size int) error {
	return syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+strconv.Itoa(size))
}

func growSmall(dir string, size int) error {
	return syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size="+strconv.Itoa(size))
}

func unmountSmall(dir string) error { return syscall.Unmount(dir, 0) }
