package lives

import (
	"time"

	"gullet/cmd/gullet/internal/figures"
)

// style is a shop that reads inches.
var style = figures.Style{Zone: time.UTC}
