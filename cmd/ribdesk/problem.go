package main

import (
	"encoding/json"
	"io"
	"os"
	"time"
)

// What the commands that work a file out (price, plan, nest) have in common.

// oneFile is the argument that they take.
const oneFile = "one file, or - for standard input"

// openProblem opens the file that is worked out, or standard input for "-".
func openProblem(stdin io.Reader, name string) (io.ReadCloser, error) {
	if name == "-" {
		return io.NopCloser(stdin), nil
	}
	return os.Open(name)
}

// writeJSON writes an answer as programs read it, and people too.
func writeJSON(w io.Writer, answer any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(answer)
}

// defaultBudget is the search time when no flag limits the search.
const defaultBudget = time.Second

// searchFlags are those of a command that searches for a plan.
type searchFlags struct {
	json, svg  bool
	budget     time.Duration
	seed       uint64
	iterations int
}

// readSearch reads the flags of a search, and the name of the file it is about.
func readSearch(command string, args []string) (s searchFlags, file string, err error) {
	fs := flags(command)
	fs.BoolVar(&s.json, "json", false, "")
	fs.BoolVar(&s.svg, "svg", false, "")
	fs.DurationVar(&s.budget, "budget", 0, "")
	fs.Uint64Var(&s.seed, "seed", 1, "")
	fs.IntVar(&s.iterations, "iterations", 0, "")
	args, err = parse(fs, args, 1, oneFile)
	switch {
	case err != nil:
		return s, "", err
	case s.json && s.svg:
		return s, "", usageError{"takes --json or --svg, not both"}
	case s.budget < 0 || s.iterations < 0:
		return s, "", usageError{"takes a --budget and --iterations of 0 or more"}
	}
	if s.budget == 0 && s.iterations == 0 {
		s.budget = defaultBudget
	}
	return s, args[0], nil
}
