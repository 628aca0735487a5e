//go:build !linux && !darwin && !freebsd

package vigil

import (
	"errors"
	"fmt"
)

// DiskFree is not known on this system.
func DiskFree(path string) (float64, error) {
	return 0, fmt.Errorf("look how full the disk of %s is: %w", path, errors.ErrUnsupported)
}
