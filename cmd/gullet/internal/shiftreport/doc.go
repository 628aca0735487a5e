// Package shiftreport writes what the saws did in a shift or a week on one page: for a
// terminal, as CSV, as a workbook and as an HTML page to print.
//
// It adds no arithmetic of its own to package standing's: every figure is from there,
// with its unit, n and base, and what is unknown is written as unknown. It shows what
// was and advises nothing.
package shiftreport
