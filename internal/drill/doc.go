// Package drill breaks the desk on purpose and looks at what is left: processes
// killed in the middle of writing, a full disk, a statement that fails, the same
// request sent again and again, clocks that jump, load without end. Everything
// in it is a test; there is nothing to import.
//
// The usual tests run a short form of each drill. RIBDESK_DRILL=full runs them at
// their full size ('make drill'), RIBDESK_SOAK=30m sets how long the soak takes
// ('make soak'). Both print a table of figures at the end.
//
// What it doesn't show: a loss of power. A killed process loses nothing that the
// system's cache holds, synced or not; that is what the count of syncs is for.
package drill
