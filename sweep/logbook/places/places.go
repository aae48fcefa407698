// Package places defines the places of logbooks: a folder, or a database server. A place
// prints without passwords, whatever the verb, so that none gets into a message, a list
// of settings or a record. The package opens nothing.
package places

import (
	"errors"
	"fmt"
	"net/url"
	"regexp"
	"strconv"
	"strings"
)

// Logbook is the place of a logbook as given. Only a conversion to string shows all of
// it.
type Logbook string

const hidden = "xxxxx"

// scheme matches the beginning of the place of a server.
var scheme = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9+.-]*://`)

// secretWord matches the names that libpq and similar libraries use for a password, in
// keys and values or as a parameter: password, sslpassword and their variants.
var secretWord = regexp.MustCompile(`(?i)(passw|pwd|passphrase|secret|token)[a-z_]*\s*(=|%3d)`)

// IsServer reports whether the place is a database server, not a folder.
func (l Logbook) IsServer() bool {
	return strings.HasPrefix(string(l), "postgres://") || strings.HasPrefix(string(l), "postgresql://")
}

// Check returns an error for a place with a password, since a place is shown, and for a
// place that is neither a folder nor a known kind of server.
func (l Logbook) Check() error {
	if secretWord.MatchString(string(l)) {
		return errPassword
	}
	begins := scheme.FindString(string(l))
	if begins == "" {
		return nil
	}
	if !l.IsServer() {
		return fmt.Errorf("a logbook cannot be at %s...: name a folder by its path, or postgres://USER@HOST/DATABASE", begins)
	}
	server, err := parse(l)
	if err != nil {
		return err
	}
	if _, told := server.User.Password(); told {
		return errPassword
	}
	return nil
}

// parse reads the place of a server. Its error does not quote the place. Text before a
// late @ may be a password with a slash in it.
func parse(l Logbook) (*url.URL, error) {
	server, err := url.Parse(string(l))
	if err != nil || strings.Contains(server.Opaque+server.EscapedPath()+server.RawQuery+server.Fragment, "@") {
		return nil, errors.New("the place of the logbook cannot be read as postgres://USER@HOST/DATABASE")
	}
	return server, nil
}

var errPassword = errors.New("leave the password out of the place, which is shown and recorded: put it into PGPASSWORD or .pgpass")

// String returns the place without passwords. For an unreadable place it returns only the
// beginning.
func (l Logbook) String() string {
	begins := scheme.FindString(string(l))
	server, err := parse(l)
	switch {
	case begins == "" && secretWord.MatchString(string(l)):
		return hidden
	case begins == "":
		return string(l)
	case err != nil:
		return begins + hidden
	}
	server.Fragment, server.RawFragment = "", ""
	if secretWord.MatchString(server.RawQuery) {
		server.RawQuery = hidden
	}
	return server.Redacted()
}

// GoString keeps the password out of %#v.
func (l Logbook) GoString() string { return strconv.Quote(l.String()) }

// MarshalText keeps the password out of JSON.
func (l Logbook) MarshalText() ([]byte, error) { return []byte(l.String()), nil }
