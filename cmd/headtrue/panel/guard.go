package panel

import (
	"crypto/subtle"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
)

// policy lets the page load what is embedded, and nothing else from anywhere.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; " +
	"connect-src 'self'; worker-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"

// guard refuses what does not come from the page itself, before anything else is looked at: a
// Host of another name is a name that was bound to this address, and an Origin of another is a
// page of somebody else.
func (p *Panel) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !slices.Contains(p.hosts, r.Host) {
			http.Error(w, "the panel is served as "+p.hosts[0]+" only", http.StatusMisdirectedRequest)
			return
		}
		if origin, given := r.Header["Origin"]; given && (len(origin) != 1 || origin[0] != "http://"+r.Host) {
			http.Error(w, "the panel answers its own page only", http.StatusForbidden)
			return
		}
		if site := r.Header.Get("Sec-Fetch-Site"); site != "" && site != "same-origin" && site != "none" {
			http.Error(w, "the panel answers its own page only", http.StatusForbidden)
			return
		}
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "the panel is read by GET, and moved by nothing of the kind", http.StatusMethodNotAllowed)
			return
		}
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Embedder-Policy", "require-corp")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=(), serial=(), usb=()")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// admits reports whether a token is the panel's.
func (p *Panel) admits(token string) bool {
	return subtle.ConstantTimeCompare([]byte(token), []byte(p.token)) == 1
}

// withToken serves only who shows the token.
func (p *Panel) withToken(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		token, bearer := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
		if !bearer || !p.admits(token) {
			refuse(w, http.StatusUnauthorized, "this needs the token of the panel's address", "open the address that headtrue panel shows")
			return
		}
		next.ServeHTTP(w, r)
	})
}

// refuse answers with an error and what to do about it.
func refuse(w http.ResponseWriter, status int, what, do string) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(map[string]string{"error": what, "do": do}) // the reader is gone if this fails
}
