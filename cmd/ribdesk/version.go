package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"text/tabwriter"
)

func init() {
	register(command{
		name:    "version",
		summary: "print the version of the program and of Go, and what it is made of",
		usage:   "[--parts]",
		help: `Flags:
  --parts    list every module that is built in, with its version and the checksum
             it was built from, and what else is carried along

Example:
  ribdesk version
  ribdesk version --parts`,
		run: version,
	})
}

// carried is what is built in and is no Go module, with its licence.
var carried = []struct{ name, licence string }{
	{"Open Sans, cut to Latin", "Apache-2.0"},
}

func version(_ context.Context, e env) error {
	fs := flags("version")
	parts := fs.Bool("parts", false, "")
	if _, err := parse(fs, e.args, 0, ""); err != nil {
		return err
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return errors.New("this build carries no version")
	}
	revision := ""
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			revision = " of " + s.Value
		}
	}
	if _, err := fmt.Fprintf(e.stdout, "ribdesk %s%s, %s\n", info.Main.Version, revision, info.GoVersion); err != nil || !*parts {
		return err
	}
	return listParts(e.stdout, info)
}

// listParts lists what the program is made of. Licences of modules lie in their
// own sources, where the checksum finds them.
func listParts(to io.Writer, info *debug.BuildInfo) error {
	w := tabwriter.NewWriter(to, 0, 4, 2, ' ', 0)
	fmt.Fprintln(w, "\nMODULE\tVERSION\tCHECKSUM")
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		fmt.Fprintf(w, "%s\t%s\t%s\n", m.Path, m.Version, m.Sum)
	}
	fmt.Fprintln(w, "\nCARRIED ALONG\tLICENCE\t")
	for _, c := range carried {
		fmt.Fprintf(w, "%s\t%s\t\n", c.name, c.licence)
	}
	return w.Flush()
}
