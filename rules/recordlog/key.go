package recordlog

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"io"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// The names of logs begin with one of these; what follows is drawn by lot. A rehearsal
// is a campaign with a made-up clock, and its log says so in every checkpoint.
const (
	recordStem    = "example.org/rootward/records/"
	rehearsalStem = "example.org/rootward/rehearsal/"
)

// IsRehearsal reports whether a log of that name was kept by a made-up clock.
func IsRehearsal(origin string) bool { return strings.HasPrefix(origin, rehearsalStem) }

// Key is what a log is signed with. A log has one key, and the key's name is the log's.
type Key struct {
	Signer       note.Signer
	Verifier     note.Verifier
	VerifierText string // the public key: whoever checks the log has to have it
}

// NewKey makes the private key of a new log, one line that is kept secret. A nil random
// takes the system's.
func NewKey(random io.Reader) (private string, err error) { return newKey(recordStem, random) }

// NewRehearsalKey is NewKey for a rehearsal.
func NewRehearsalKey(random io.Reader) (private string, err error) {
	return newKey(rehearsalStem, random)
}

func newKey(stem string, random io.Reader) (private string, err error) {
	id := strings.ToLower(rand.Text()[:12])
	private, _, err = note.GenerateKey(random, stem+id)
	return private, err
}

// ParseKey reads a private key. Its errors do not show it.
func ParseKey(private string) (*Key, error) {
	wrong := errors.New("this is not the private key of a log: it is one line that begins with PRIVATE+KEY+")
	private = strings.TrimSpace(private)
	signer, err := note.NewSigner(private)
	if err != nil {
		return nil, wrong
	}
	encoded := private
	for range 4 { // PRIVATE, KEY, name, hash: the rest may have "+" in it
		_, encoded, _ = strings.Cut(encoded, "+")
	}
	seed, err := base64.StdEncoding.DecodeString(encoded)
	if err != nil || len(seed) != 1+ed25519.SeedSize { // a byte for the algorithm goes before
		return nil, wrong
	}
	public := ed25519.NewKeyFromSeed(seed[1:]).Public().(ed25519.PublicKey)
	text, err := note.NewEd25519VerifierKey(signer.Name(), public)
	if err != nil {
		return nil, wrong
	}
	verifier, err := note.NewVerifier(text)
	return &Key{Signer: signer, Verifier: verifier, VerifierText: text}, err
}

// ParseVerifier reads a public key.
func ParseVerifier(text string) (note.Verifier, error) {
	v, err := note.NewVerifier(strings.TrimSpace(text))
	if err != nil {
		return nil, errors.New("this is not the public key of a log: it is one line of the form NAME+HASH+KEY, as rootward records key prints it")
	}
	return v, nil
}
