package main

import (
	"context"
	"fmt"
	"runtime/debug"
)

func init() {
	register(command{
		name:    "version",
		summary: "print the version of the program and of Go",
		help:    "Example:\n  ribdesk version",
		run: func(_ context.Context, e env) error {
			if _, err := parse(flags("version"), e.args, 0, ""); err != nil {
				return err
			}
			info, ok := debug.ReadBuildInfo()
			if !ok {
				return fmt.Errorf("this build carries no version")
			}
			_, err := fmt.Fprintf(e.stdout, "ribdesk %s, %s\n", info.Main.Version, info.GoVersion)
			return err
		},
	})
}
