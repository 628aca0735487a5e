//go:build linux || darwin || freebsd

package vigil

import (
	"errors"
	"fmt"
	"syscall"
)

// DiskFree is how much of the disk that holds a file Gullet may still fill, in per cent of
// all of it.
func DiskFree(path string) (float64, error) {
	var fs syscall.Statfs_t
	if err := syscall.Statfs(path, &fs); err != nil {
		return 0, fmt.Errorf("look how full the disk of %s is: %w", path, err)
	}
	if fs.Blocks == 0 {
		return 0, fmt.Errorf("look how full the disk of %s is: %w", path, errors.New("it tells no size"))
	}
	return 100 * float64(fs.Bavail) / float64(fs.Blocks), nil
}
