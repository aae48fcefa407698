// Package logbook is the durable store of the records of runs. By default it is one
// SQLite file in its own folder; several benches share one in PostgreSQL.
//
// Each entry of a run is durable when Append returns. With a server it is first durable
// in a spool and is sent when the server is there. When a run is closed, one transaction
// packs its entries into one piece. The figures of a run for lists and charts are in one
// row, taken from the entries as they are saved. Clips of sound are files in the folder;
// the entries hold their names and hashes.
//
// The package handles records and databases. It does not depend on jigs, sound or
// commands, and it computes no figure: it lists figures measured elsewhere.
package logbook
