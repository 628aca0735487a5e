package store

import (
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"

	"github.com/mattn/go-sqlite3"
)

// raw reads rows with f straight from the driver, as int64, float64, string or nil;
// what f is given holds until it returns. Over a year's readings package sql takes as
// long as SQLite itself.
func raw(conn *sql.Conn, f func([]driver.Value) error, query string, args ...int64) error {
	values := make([]driver.Value, len(args))
	for i, a := range args {
		values[i] = a
	}
	return conn.Raw(func(c any) (err error) {
		direct, ok := c.(*sqlite3.SQLiteConn)
		if !ok {
			return fmt.Errorf("a connection of type %T: want one of SQLite", c)
		}
		rows, err := direct.Query(query, values)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, rows.Close()) }()
		row := make([]driver.Value, len(rows.Columns()))
		for {
			switch err := rows.Next(row); {
			case errors.Is(err, io.EOF):
				return nil
			case err != nil:
				return err
			}
			if err := f(row); err != nil {
				return err
			}
		}
	})
}
