package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planfile"
	"gullet/cmd/gullet/internal/sheets"
)

// planFiles are the files a plan is to be written to, "" for none and - for standard
// output.
type planFiles struct{ ics, csv, xlsx, sheet string }

func (f *planFiles) flags(c *cobra.Command) {
	c.Flags().StringVar(&f.ics, "ics", "", "the changes as an iCalendar `FILE`")
	c.Flags().StringVar(&f.csv, "csv", "", "a row for each saw as a CSV `FILE`")
	c.Flags().StringVar(&f.xlsx, "xlsx", "", "all of it as a workbook `FILE`")
	c.Flags().StringVar(&f.sheet, "sheet", "", "a sheet for the wall as an HTML `FILE` to print")
}

// planFile is one of them.
type planFile struct {
	flag, name string
	write      func(*planfile.Plan) ([]byte, error)
}

// list is those that are wanted.
func (f *planFiles) list() (list []planFile) {
	ics := func(p *planfile.Plan) ([]byte, error) { return planfile.ICS(p), nil }
	for _, file := range []planFile{
		{"--ics", f.ics, ics}, {"--csv", f.csv, planfile.CSV}, {"--xlsx", f.xlsx, planfile.XLSX}, {"--sheet", f.sheet, planfile.Sheet},
	} {
		if file.name != "" {
			list = append(list, file)
		}
	}
	return list
}

func (f *planFiles) wanted() bool { return len(f.list()) > 0 }

// check refuses a file without a name, two things at one place, and a workbook where a
// person reads.
func (f *planFiles) check(c *cobra.Command, asJSON bool, out io.Writer) error {
	for _, name := range []string{"ics", "csv", "xlsx", "sheet"} {
		if flag := c.Flags().Lookup(name); flag.Changed && flag.Value.String() == "" {
			return usageError{fmt.Errorf("--%s names no file, allowed is a file or - for standard output", name)}
		}
	}
	if f.xlsx == "-" && isTerminal(out) {
		return usageError{errors.New("--xlsx is -, and a terminal shows no workbook: name a file, or send standard output on")}
	}
	at := map[string]string{}
	for _, file := range f.list() {
		if asJSON {
			return usageError{fmt.Errorf("--json and %s: allowed is one of them", file.flag)}
		}
		if other, taken := at[file.name]; taken {
			return usageError{fmt.Errorf("%s and %s are both %q, allowed is a file for each", other, file.flag, file.name)}
		}
		at[file.name] = file.flag
	}
	return nil
}

// writePlanFiles makes all files before it writes the first.
func (p *program) writePlanFiles(files *planFiles, plan *planfile.Plan) error {
	list := files.list()
	contents := make([][]byte, len(list))
	for i, file := range list {
		var err error
		if contents[i], err = file.write(plan); err != nil {
			return err
		}
	}
	said, piped := "", false
	for i, file := range list {
		if file.name == "-" {
			piped = true
			if _, err := p.out.Write(contents[i]); err != nil {
				return fmt.Errorf("write the plan: %w", err)
			}
			continue
		}
		if err := sheets.Replace(file.name, contents[i]); err != nil {
			return err
		}
		said += fmt.Sprintf("%s is written: %s advised\n", file.name, figures.Plural(len(plan.Changes()), "change", "changes"))
	}
	if piped {
		return nil
	}
	_, err := io.WriteString(p.out, said)
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
