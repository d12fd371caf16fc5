// Package drill breaks the desk on purpose and looks at what is left: processes
// killed in the middle of writing, a full disk, a statement that fails, the same
// request sent again and again, clocks that jump, load without end. Everything
// in it is a test; there is nothing to import.
//
// The usual tests run a short form of each drill. RIBDESK_DRILL=full runs them at
// their full size ('make drill'), RIBDESK_SOAK=30m sets how long the soak takes
// ('make soak'). Both print a table of figures at the end; 'make drill' runs the
// drills of other packages too, and leaves all figures in one CSV file.
//
// # Which test shows which fault
//
//	F1  kill -9 in mixed writes          TestKill, TestSeveralServers
//	F2  syncs for each acknowledgement   TestSyncs
//	F3  disk full, disk read-only        TestDiskFull, TestReadOnly; store: TestReady, TestNotReady
//	F4  the n-th statement fails         TestEachStatementFails; store/probe_test.go
//	F5  the same request again           TestResends; web: TestEveryPostThatCreatesHasAKey, TestAPIKeyAtOnce
//	F6  numbers under kills, rollbacks   TestKill; desk: TestNumbersHaveNoGaps
//	F7  pairs of edits, last of a thing  TestPairsOfEdits, TestManyAccept, TestManyClaim, TestLastFeet, TestOneLoad;
//	                                     web: TestAPIRace
//	F8  issued papers never change       desk: TestIssuedNeverChanges, TestBooksComeBackIdentical, verify_test.go; document: TestReprintIsTheSame
//	F9  sums to the cent, ageing         price: TestTotalsAddUp; books: TestRandomHistories; desk: TestAskSums, TestPartsAddUpToTheOrder, TestInvoiceOfAllAgreesWithQuote
//	F10 fuzzed cut lists                 web: TestFuzzedLists, TestFuzzedAsks; cutlist: TestFuzzedFiles; 'make fuzz'
//	F11 malformed requests               web: TestMalformedRequests; TestSlowHeader, TestTwoLengths
//	F12 each route, each role            web: TestMatrix, TestOneCustomerNeverSeesAnother, TestCustomersSeeNoCosts; desk: TestBooksAuthorization
//	F13 backups under load               TestBackups; cmd: TestBackupAndRestore, TestRestoreTheLatest
//	F14 stop under load, overload        TestStopUnderLoad, TestOverload
//	F15 soak                             TestSoak
//	F16 clock jumps, summer time         TestClockJumps
//	F17 kills inside a migration         store: TestKillsInsideAMigration, on the oldest schema that has orders and books
//	F18 driver without signal            web: TestDriverWithoutSignal, TestFiftyLostConnections, TestSyncRefuses
//	F19 a changed row of the log         store: TestVerifyNamesTheChangedEvent; cmd: TestVerifyCommand
//	F20 simulation beside a model        TestSimulation
//
// What it doesn't show: a loss of power. A killed process loses nothing that the
// system's cache holds, synced or not; that is what the count of syncs is for.
package drill
