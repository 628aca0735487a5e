package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// JobRow is coming work as a shop hands it in.
type JobRow struct {
	ID       int64 // of an import it is not looked at, as are Imported and Cut
	Name     string
	Saw      string // "" for any
	Grade    string // "" when not known
	Section  string // a designation, or a JSON object with lengths in inches
	Mitre    float64
	Bars     int       // cut at once
	Pieces   int       // of the whole job
	Due      time.Time // zero when there is no date
	Imported time.Time // when it was first handed in
	Cut      int64     // pieces cut for it since then; may be more than Pieces
}

// Left is how many pieces are still to cut.
func (j *JobRow) Left() int { return int(max(0, int64(j.Pieces)-j.Cut)) }

func (j *JobRow) check() error {
	switch {
	case strings.TrimSpace(j.Name) == "":
		return errors.New("a job without a name")
	case j.Section == "":
		return fmt.Errorf("job %s: the section is missing", j.Name)
	case j.Bars < 1 || j.Pieces < 1:
		return fmt.Errorf("job %s: %d pieces, %d at once, at least 1 is allowed", j.Name, j.Pieces, j.Bars)
	case !(math.Abs(j.Mitre) < 90):
		return fmt.Errorf("job %s: a mitre of %g degrees, allowed is more than -90 and less than 90", j.Name, j.Mitre)
	}
	if err := bounded(j.Name, j.Saw, j.Grade, j.Section); err != nil {
		return fmt.Errorf("job %.40s: %w", j.Name, err)
	}
	return nil
}

// JobsImported is what a list of jobs changed.
type JobsImported struct {
	Added   int `json:"added"`
	Updated int `json:"updated"`
	Dropped int `json:"dropped"`
}

// ImportJobs takes a list of jobs, all or none. A job whose name is open is
// updated and keeps what was cut for it; the order of the list is the order of
// jobs due at the same time. Open jobs that the list does not have stay, unless
// it replaces them: then they are dropped.
func (s *Store) ImportJobs(ctx context.Context, list []JobRow, replace bool, who string, now time.Time) (done JobsImported, err error) {
	listed, err := names(list, who)
	if err != nil {
		return done, fmt.Errorf("import jobs: %w", err)
	}
	err = s.write(ctx, func(w *writer) error {
		if replace {
			if done.Dropped, err = w.dropUnlisted(listed, who, now); err != nil {
				return err
			}
		}
		var last int64
		if err := w.row(`SELECT COALESCE(MAX(priority), 0) FROM job`).Scan(&last); err != nil {
			return err
		}
		for i := range list {
			added, err := w.putJob(&list[i], last+1+int64(i), who, now)
			if err != nil {
				return fmt.Errorf("job %s: %w", list[i].Name, err)
			}
			if added {
				done.Added++
			} else {
				done.Updated++
			}
		}
		return w.arrived(int64(len(list) + done.Dropped))
	})
	if err != nil {
		return JobsImported{}, fmt.Errorf("import jobs: %w", err)
	}
	return done, nil
}

// names are those of a sound list of jobs.
func names(list []JobRow, who string) (map[string]bool, error) {
	listed := map[string]bool{}
	for i := range list {
		if err := list[i].check(); err != nil {
			return nil, err
		}
		if listed[list[i].Name] {
			return nil, fmt.Errorf("job %s is there twice", list[i].Name)
		}
		listed[list[i].Name] = true
	}
	return listed, bounded(who)
}

// putJob updates the open job of that name or adds one.
func (w *writer) putJob(j *JobRow, priority int64, who string, now time.Time) (added bool, err error) {
	fields := []any{
		j.Name, j.Saw, j.Grade, j.Section, j.Mitre, int64(j.Bars), int64(j.Pieces), instant(j.Due), priority, micros(now), who,
	}
	n, err := w.change(`UPDATE job SET name = $1, saw_name = $2, grade = $3, section = $4, mitre = $5, bars = $6, pieces = $7, due = $8,
		priority = $9, updated = $10, who = $11 WHERE name = $1 AND ended IS NULL`, fields...)
	if err != nil || n > 0 {
		return false, err
	}
	return true, w.exec(`INSERT INTO job (name, saw_name, grade, section, mitre, bars, pieces, due, priority, imported, after_pass, updated, who)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, (SELECT COALESCE(MAX(id), 0) FROM pass), $10, $11)`, fields...)
}

// dropUnlisted drops the open jobs that a list does not have.
func (w *writer) dropUnlisted(listed map[string]bool, who string, now time.Time) (int, error) {
	var gone []string
	err := w.each(func(r scanner) error {
		var name string
		err := r.Scan(&name)
		if !listed[name] {
			gone = append(gone, name)
		}
		return err
	}, `SELECT name FROM job WHERE ended IS NULL`)
	if err != nil {
		return 0, err
	}
	for _, name := range gone {
		if err := w.endJob(name, jobDropped, who, "not in the list that replaced it", now); err != nil {
			return 0, err
		}
	}
	return len(gone), nil
}

// How a job ends.
const (
	jobDone    = "done"
	jobDropped = "dropped"
)

// FinishJob records that an open job is done.
func (s *Store) FinishJob(ctx context.Context, name, who, why string, now time.Time) error {
	return s.endJob(ctx, name, jobDone, who, why, now)
}

// DropJob records that an open job will not be cut.
func (s *Store) DropJob(ctx context.Context, name, who, why string, now time.Time) error {
	return s.endJob(ctx, name, jobDropped, who, why, now)
}

func (s *Store) endJob(ctx context.Context, name, ending, who, why string, now time.Time) error {
	err := answerable(who, why)
	if err == nil {
		err = s.write(ctx, func(w *writer) error {
			if err := w.endJob(name, ending, who, why, now); err != nil {
				return err
			}
			return w.arrived(1)
		})
	}
	if err != nil {
		return fmt.Errorf("job %s %s: %w", name, ending, err)
	}
	return nil
}

func (w *writer) endJob(name, ending, who, why string, now time.Time) error {
	n, err := w.change(`UPDATE job SET ended = $1, ending = $2, ended_who = $3, ended_why = $4 WHERE name = $5 AND ended IS NULL`,
		micros(now), ending, who, why, name)
	if err == nil && n == 0 {
		err = errors.New("no open job has that name")
	}
	return err
}

// jobsQuery counts what was cut in the passes that came after the oldest open job
// was handed in, in the order they are stored, which needs no index on the big
// table. Only finished cuts of parts make pieces, and only those since the job
// was there by the saw's clock.
const jobsQuery = `SELECT j.id, j.name, j.saw_name, j.grade, j.section, j.mitre, j.bars, j.pieces, j.due, j.imported, COALESCE(c.n, 0)
	FROM job j LEFT JOIN (
		SELECT o.id, SUM(p.bars) AS n FROM pass p CROSS JOIN job o
		WHERE p.id > (SELECT MIN(after_pass) FROM job WHERE ended IS NULL) AND p.kind = 'cut' AND p.purpose = 'part'
		AND o.name = p.job AND o.ended IS NULL AND p.id > o.after_pass AND p.at >= o.imported GROUP BY o.id
	) c ON c.id = j.id
	WHERE j.ended IS NULL ORDER BY j.due IS NULL, j.due, j.priority`

// Jobs lists the open jobs, the earliest due first and those without a date last,
// with what was cut for them.
func (s *Store) Jobs(ctx context.Context) ([]JobRow, error) {
	var list []JobRow
	err := s.query(ctx, func(r scanner) error {
		var j JobRow
		var due sql.NullInt64
		var imported int64
		err := r.Scan(&j.ID, &j.Name, &j.Saw, &j.Grade, &j.Section, &j.Mitre, &j.Bars, &j.Pieces, &due, &imported, &j.Cut)
		j.Due, j.Imported = fromNull(due), fromMicros(imported)
		list = append(list, j)
		return err
	}, jobsQuery)
	if err != nil {
		return nil, fmt.Errorf("list jobs: %w", err)
	}
	return list, nil
}
