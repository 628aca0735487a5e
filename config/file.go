package config

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// maxFile is far above any shop's file and far below what would stall a start.
const maxFile = 1 << 20

// takeFile reads the file's settings and rows. It returns the file's name, ""
// when there is none and none is required.
func (l *loader) takeFile(name string, required bool) string {
	data, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) && !required {
		return ""
	}
	if err != nil {
		var path *fs.PathError
		if errors.As(err, &path) {
			err = path.Err // the name stands before it already
		}
		l.problems.add(origin{layer: fromFile, name: name}, "", "cannot read the configuration: %v", err)
		return name
	}
	l.takeTOML(name, data)
	return name
}

// takeTOML reads TOML text as the file of that name.
func (l *loader) takeTOML(name string, data []byte) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")) // the mark that some editors put first
	if len(data) > maxFile {
		l.problems.add(fileOrigin(name, 0), "", "found %d bytes; allowed are up to %d", len(data), maxFile)
		return
	}
	var tree map[string]any
	if err := toml.Unmarshal(data, &tree); err != nil {
		line := 0
		var de *toml.DecodeError
		if errors.As(err, &de) {
			line, _ = de.Position()
		}
		l.problems.add(fileOrigin(name, line), "", "not TOML: %s", strings.TrimPrefix(err.Error(), "toml: "))
		return
	}
	f := tomlFile{name, lineNumbers(data)}
	for _, key := range slices.Sorted(maps.Keys(tree)) {
		l.takeTop(f, key, tree[key])
	}
}

// tomlFile knows where in the file each key stands.
type tomlFile struct {
	name  string
	lines map[string]int // by path, "saw[2].kind"
}

func (f tomlFile) at(path string) origin { return fileOrigin(f.name, f.lines[path]) }

func fileOrigin(name string, line int) origin {
	return origin{layer: fromFile, name: name, line: line}
}

// takeTop reads one top-level key: a section, a list, or a mistake.
func (l *loader) takeTop(f tomlFile, key string, value any) {
	var sections, tables []string
	for _, s := range settings() {
		if section, _, _ := strings.Cut(s.key, "."); !slices.Contains(sections, section) {
			sections = append(sections, section)
		}
	}
	for _, li := range lists() {
		tables = append(tables, li.name)
		if li.name == key {
			l.takeList(f, li, value)
			return
		}
	}
	if slices.Contains(sections, key) {
		l.takeSection(f, key, value)
		return
	}
	l.problems.add(f.at(key), shownKey(key), "no such key; allowed are [%s] and [[%s]]%s",
		strings.Join(sections, "], ["), strings.Join(tables, "]], [["), didYouMean(key, append(sections, tables...)))
}

func (l *loader) takeSection(f tomlFile, section string, value any) {
	table, ok := value.(map[string]any)
	if !ok {
		l.problems.add(f.at(section), section, "found %s; allowed is one table, written [%s]", found(value), section)
		return
	}
	known := map[string]setting{}
	var names []string
	for _, s := range settings() {
		if in, name, _ := strings.Cut(s.key, "."); in == section {
			known[name] = s
			names = append(names, name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(table)) {
		path := section + "." + name
		if s, ok := known[name]; ok {
			l.take(s, table[name], f.at(path))
			continue
		}
		l.problems.add(f.at(path), shownKey(path), "no such key; allowed are %s%s", strings.Join(names, ", "), didYouMean(name, names))
	}
}

func (l *loader) takeList(f tomlFile, li list, value any) {
	items, ok := value.([]any)
	if !ok {
		l.problems.add(f.at(li.name), li.name, "found %s; allowed is a list, each item written [[%s]]", found(value), li.name)
		return
	}
	for i, item := range items {
		path := fmt.Sprintf("%s[%d]", li.name, i+1)
		table, ok := item.(map[string]any)
		if !ok {
			l.problems.add(f.at(li.name), path, "found %s; allowed is a table, written [[%s]]", found(item), li.name)
			continue
		}
		l.takeRow(f, li, path, table)
	}
}

// takeRow reads one table of a list. Whether a required key is missing is
// decided later, since a grade may take it from a default.
func (l *loader) takeRow(f tomlFile, li list, path string, table map[string]any) {
	r := row{list: li.name, path: path, at: f.at(path), values: map[string]any{}, origins: map[string]origin{}, broken: map[string]bool{}}
	for _, name := range slices.Sorted(maps.Keys(table)) {
		key := path + "." + name
		fd, ok := li.field(name)
		if !ok {
			l.problems.add(f.at(key), shownKey(key), "no such key; allowed are %s%s", strings.Join(li.names(), ", "), didYouMean(name, li.names()))
			continue
		}
		r.origins[name] = f.at(key)
		value, err := fd.read(table[name])
		if err != nil {
			l.problems.add(f.at(key), key, "found %s; %v", fd.shown(table[name]), err)
			r.broken[name] = true
			continue
		}
		r.values[name] = value
	}
	l.rows = append(l.rows, r)
}

// shown is what a person wrote, without its secret.
func (f field) shown(raw any) string {
	if text, ok := raw.(string); ok && f.hide != nil {
		return found(f.hide(text))
	}
	return found(raw)
}

// shownKey is a key as a person wrote it, short enough for one line and quoted
// where it would break the line.
func shownKey(key string) string {
	if plain(key) && len(key) <= 80 {
		return key
	}
	return found(key)
}

// lineNumbers maps the path of every key and table of valid TOML to the line it
// stands on. Items of lists are counted from 1.
func lineNumbers(data []byte) map[string]int {
	var newlines []int
	for i, b := range data {
		if b == '\n' {
			newlines = append(newlines, i)
		}
	}
	w := lineWalk{lines: map[string]int{}, count: map[string]int{}}
	w.lineOf = func(offset uint32) int { return sort.SearchInts(newlines, int(offset)) + 1 }

	var p unstable.Parser
	p.Reset(data)
	prefix := ""
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table:
			prefix = w.note("", e.Key())
		case unstable.ArrayTable:
			path := w.note("", e.Key())
			w.count[path]++
			prefix = fmt.Sprintf("%s[%d]", path, w.count[path])
			w.lines[prefix] = w.lines[path]
		case unstable.KeyValue:
			w.keyValue(prefix, e)
		}
	}
	return w.lines
}

type lineWalk struct {
	lines  map[string]int
	count  map[string]int // items so far of each list
	lineOf func(offset uint32) int
}

// note records the line of a key below prefix and returns its path. On the way
// it steps into the newest item of a list, as TOML does.
func (w *lineWalk) note(prefix string, key unstable.Iterator) string {
	path := prefix
	for key.Next() {
		if n := w.count[path]; n > 0 {
			path = fmt.Sprintf("%s[%d]", path, n)
		}
		if path != "" {
			path += "."
		}
		path += string(key.Node().Data)
		w.lines[path] = w.lineOf(key.Node().Raw.Offset)
	}
	return path
}

func (w *lineWalk) keyValue(prefix string, kv *unstable.Node) {
	path := w.note(prefix, kv.Key())
	w.value(path, kv.Value())
}

func (w *lineWalk) value(path string, v *unstable.Node) {
	switch v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			w.keyValue(path, it.Node())
		}
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); {
			if it.Node().Kind == unstable.Comment {
				continue
			}
			i++
			item := fmt.Sprintf("%s[%d]", path, i)
			w.lines[item] = w.lines[path]
			w.value(item, it.Node())
		}
	}
}
