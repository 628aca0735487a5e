package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/sheets"
)

// outFile is a file that a command can write its answer to.
type outFile[T any] struct {
	flag, usage string
	write       func(T) ([]byte, error)
	name        string // "" for none and - for standard output
}

// outFiles are all that a command can write.
type outFiles[T any] []outFile[T]

const flagXLSX = "xlsx"

func (f outFiles[T]) flags(c *cobra.Command) {
	for i := range f {
		c.Flags().StringVar(&f[i].name, f[i].flag, "", f[i].usage)
	}
}

// wanted is those that are asked for.
func (f outFiles[T]) wanted() (list outFiles[T]) {
	for _, file := range f {
		if file.name != "" {
			list = append(list, file)
		}
	}
	return list
}

// check refuses a file without a name, two things at one place, and a workbook where a
// person reads.
func (f outFiles[T]) check(c *cobra.Command, asJSON bool, out io.Writer) error {
	at := map[string]string{}
	for _, file := range f {
		switch {
		case file.name == "" && c.Flags().Changed(file.flag):
			return usageError{fmt.Errorf("--%s names no file, allowed is a file or - for standard output", file.flag)}
		case file.name == "-" && file.flag == flagXLSX && isTerminal(out):
			return usageError{errors.New("--xlsx is -, and a terminal shows no workbook: name a file, or send standard output on")}
		}
	}
	for _, file := range f.wanted() {
		if asJSON {
			return usageError{fmt.Errorf("--json and --%s: allowed is one of them", file.flag)}
		}
		if other, taken := at[file.name]; taken {
			return usageError{fmt.Errorf("--%s and --%s are both %q, allowed is a file for each", other, file.flag, file.name)}
		}
		at[file.name] = file.flag
	}
	return nil
}

// writeFiles makes all files that are wanted before it writes the first, and says so
// where standard output is not one of them.
func writeFiles[T any](out io.Writer, files outFiles[T], of T, said string) error {
	list := files.wanted()
	contents := make([][]byte, len(list))
	for i, file := range list {
		var err error
		if contents[i], err = file.write(of); err != nil {
			return err
		}
	}
	text, piped := "", false
	for i, file := range list {
		if file.name == "-" {
			piped = true
			if _, err := out.Write(contents[i]); err != nil {
				return fmt.Errorf("write standard output: %w", err)
			}
			continue
		}
		if err := sheets.Replace(file.name, contents[i]); err != nil {
			return err
		}
		text += fmt.Sprintf("%s is written: %s\n", file.name, said)
	}
	if piped {
		return nil
	}
	_, err := io.WriteString(out, text)
	return err
}

// isTerminal says whether a person reads what is written.
func isTerminal(out io.Writer) bool {
	f, ok := out.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
