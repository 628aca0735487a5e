package sheets

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Replace writes a file, or puts it in the place of the one that is there: whoever
// reads it sees the old one or the new one whole. The folder must be there.
func Replace(name string, content []byte) error {
	info, err := os.Stat(name)
	switch {
	case err == nil && !info.Mode().IsRegular():
		return fmt.Errorf("write %s: it is no plain file (- is standard output)", name)
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Stat(filepath.Dir(name)); err != nil {
			return fmt.Errorf("write %s: there is no folder %s", name, filepath.Dir(name))
		}
	case err != nil:
		return fmt.Errorf("write a file: %w", err)
	}
	beside := filepath.Join(filepath.Dir(name), fmt.Sprintf(".%s.%d.tmp", filepath.Base(name), os.Getpid()))
	if err := writeNew(beside, content); err != nil {
		return fmt.Errorf("write a file: %w", err)
	}
	if err := os.Rename(beside, name); err != nil {
		return errors.Join(fmt.Errorf("write a file: %w", err), os.Remove(beside))
	}
	return nil
}

// writeNew writes a file that must not be there, to the disk, or leaves none.
func writeNew(name string, content []byte) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(content)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return errors.Join(err, os.Remove(name))
	}
	return nil
}
