package main

import "syscall"

// umask sets the mask for the mode of new files and returns the old one.
func umask(mask int) int { return syscall.Umask(mask) }
