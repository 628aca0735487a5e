package shiftreport
func HTML(r *Report) ([]byte, error) { return nil, nil }
