package planfile

import "gullet/cmd/gullet/internal/sheets"

// CSV writes one row for each saw, in the form of sheets.CSV; the column why says why
// cells are empty.
func CSV(p *Plan) ([]byte, error) {
	t := p.saws()
	return sheets.CSV(&t)
}

// XLSX writes the plan as a workbook: changes, saws, jobs, shelf and notes.
func XLSX(p *Plan) ([]byte, error) {
	return sheets.XLSX("Change plan", p.MadeAt, []sheets.Table{p.changes(), p.saws(), p.jobs(), p.shelf(), p.notes()})
}
