// Package logbook is the durable store of what runs leave behind. By default it is
// one SQLite file in a folder of its own; several benches share one in PostgreSQL.
//
// Each entry of a run is durable when Append returns: for a server in a spool, from which
// it is sent as the server is there. As a run is closed its
// entries are packed into one piece, in one transaction. What lists and charts
// need of a run stands in a row of its own, taken from the entries as they are
// saved. Clips of sound are files in the folder, named in the entries with their
// hash.
//
// The package knows records and databases. It knows nothing of jigs, sound or
// commands, and it computes no figure: what it lists was measured elsewhere.
package logbook
