// Package planfile writes a change plan into files: an iCalendar for the planner's
// calendar, a CSV and an XLSX for a spreadsheet, and a sheet for the wall.
//
// A file says nothing that the plan does not: every figure is the report's, in the
// words of the terminal and the shop's units and zone, and what is unknown is empty
// with a reason beside it or written as unknown, never 0. It is advice, and carries
// the cautions wherever it asks a person to change a blade.
package planfile
