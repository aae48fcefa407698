// Package places has the places of logbooks: a folder, or a database server. A place
// shows itself without passwords, however it is printed, so that none gets into a
// message, a list of settings or a record. It opens nothing.
package places

import (
	"errors"
	"fmt"
	"net/url"
	"regexp"
	"strconv"
	"strings"
)

// Logbook is the place of a logbook as it was given. Only a conversion to string has it
// whole.
type Logbook string

const hidden = "xxxxx"

// scheme is how the place of a server begins.
var scheme = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9+.-]*://`)

// secretWord is how libpq and its like call a password in a place, by keys and values
// or as a parameter: password, sslpassword and what people make of them.
var secretWord = regexp.MustCompile(`(?i)(passw|pwd|passphrase|secret|token)[a-z_]*\s*(=|%3d)`)

// IsServer says that the place is a database server, not a folder.
func (l Logbook) IsServer() bool {
	return strings.HasPrefix(string(l), "postgres://") || strings.HasPrefix(string(l), "postgresql://")
}

// Check refuses a place with a password, which belongs where it is not shown, and one
// that is neither a folder nor a server of a kind that is known.
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

// parse reads the place of a server. Its error does not quote it. What lies before a
// late @ may be a password with a slash in it.
func parse(l Logbook) (*url.URL, error) {
	server, err := url.Parse(string(l))
	if err != nil || strings.Contains(server.Opaque+server.EscapedPath()+server.RawQuery+server.Fragment, "@") {
		return nil, errors.New("the place of the logbook cannot be read as postgres://USER@HOST/DATABASE")
	}
	return server, nil
}

var errPassword = errors.New("leave the password out of the place, which is shown and recorded: put it into PGPASSWORD or .pgpass")

// String is the place without passwords. Of one that cannot be read nothing but its
// beginning is shown.
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

// MarshalText keeps it out of JSON.
func (l Logbook) MarshalText() ([]byte, error) { return []byte(l.String()), nil }
