package sheets

import (
	_ "embed"
	"html/template"
	"strings"
)

//go:embed paper.css
var paperCSS string

// PageFuncs are what the templates of pages to print share: paper is the style that all
// begin with, paper and ink, on which their own builds.
var PageFuncs = template.FuncMap{
	"paper": func() template.CSS { return template.CSS(strings.TrimSuffix(paperCSS, "\n")) },
}
