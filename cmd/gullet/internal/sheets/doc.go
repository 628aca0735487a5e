// Package sheets writes tables into files that other programs read: CSV (RFC 4180) and
// workbooks, put in the place of the file that is there.
//
// It knows no saw and no plan. What is unknown is an empty cell, never 0, and no text
// becomes a formula.
package sheets
