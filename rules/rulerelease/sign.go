package rulerelease

import (
	"crypto/ed25519"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// maxText bounds a signed release, in bytes.
const maxText = 64 << 10

// NewKey makes a key to sign with. Its name is part of each signature: letters,
// digits and such, without spaces or "+". private is kept secret by who signs;
// verifier goes to those who trust the name. A nil random takes the system's.
func NewKey(name string, random io.Reader) (private, verifier string, err error) {
	if name == "" || strings.ContainsFunc(name, func(c rune) bool { return c <= ' ' || c == '+' || c == 0x7f }) {
		return "", "", fmt.Errorf("key name %q is empty or has spaces or \"+\" in it; name it like \"velmora-lands-2026\"", name)
	}
	private, verifier, err = note.GenerateKey(random, name)
	if err != nil {
		return "", "", fmt.Errorf("no key was made: %w", err)
	}
	return private, verifier, nil
}

// Sign writes a release and signs it with each of the private keys.
func Sign(r Release, privates ...string) ([]byte, error) {
	if faults := r.faults(); len(faults) > 0 {
		return nil, faults
	}
	if len(privates) == 0 {
		return nil, errors.New("no key is given to sign with; make one with rootward rules keygen")
	}
	return sign(&note.Note{Text: r.Text()}, privates...)
}

// Cosign adds a signature to a signed release. Those that it has stay, whether
// or not their keys are known here.
func Cosign(text []byte, private string) ([]byte, error) {
	n, err := open(text, nil)
	if err != nil {
		return nil, err
	}
	if _, err := Parse(n.Text); err != nil {
		return nil, err
	}
	return sign(n, private)
}

func sign(n *note.Note, privates ...string) ([]byte, error) {
	var signers []note.Signer
	for _, p := range privates {
		s, err := note.NewSigner(strings.TrimSpace(p))
		if err != nil {
			// The error must not show the key.
			return nil, errors.New("a key to sign with is not one that rootward rules keygen wrote: it begins with PRIVATE+KEY+ and is one line")
		}
		signers = append(signers, s)
	}
	return note.Sign(n, signers...)
}

// Signed is a release and who signed it.
type Signed struct {
	Release Release
	Keys    []string // verifiers of the keys whose signatures hold, as they were given
	Unknown []string // names on signatures that none of the given keys can check
}

// Open reads a signed release and checks its signatures by the keys that are
// given. A signature of one of these keys that does not hold is an error, as is a
// release that none of them signed.
func Open(text []byte, verifiers []string) (*Signed, error) {
	n, err := open(text, verifiers)
	if err != nil {
		return nil, err
	}
	s := &Signed{}
	for _, sig := range n.UnverifiedSigs {
		s.Unknown = append(s.Unknown, sig.Name)
	}
	if s.Release, err = Parse(n.Text); err != nil {
		return nil, err
	}
	if len(n.Sigs) == 0 {
		return nil, fmt.Errorf("none of the known keys has signed it, only %s; have it signed by an agency of %s", strings.Join(s.Unknown, ", "), TrustFile)
	}
	for _, v := range verifiers {
		if slices.ContainsFunc(n.Sigs, func(sig note.Signature) bool { return keyID(v) == fmt.Sprintf("%s+%08x", sig.Name, sig.Hash) }) {
			s.Keys = append(s.Keys, v)
		}
	}
	return s, nil
}

// open reads a note, which need not be signed by a key that is known.
func open(text []byte, verifiers []string) (*note.Note, error) {
	if len(text) > maxText {
		return nil, fmt.Errorf("has %d bytes; a release has at most %d", len(text), maxText)
	}
	var known []note.Verifier
	for _, v := range slices.Compact(slices.Sorted(slices.Values(verifiers))) {
		k, err := note.NewVerifier(v)
		if err != nil {
			return nil, fmt.Errorf("%q is not the verifier of a key: %w", clip(v), err)
		}
		known = append(known, k)
	}
	n, err := note.Open(text, note.VerifierList(known...))
	var unverified *note.UnverifiedNoteError
	var invalid *note.InvalidSignatureError
	switch {
	case errors.As(err, &unverified):
		return unverified.Note, nil
	case errors.As(err, &invalid):
		return nil, fmt.Errorf("the signature of %s does not hold: the text was changed after it was signed; fetch the release anew", invalid.Name)
	case err != nil:
		return nil, errors.New("is not a signed note: a text, an empty line and signatures; fetch the release anew")
	}
	return n, nil
}

// keyID is the name and the hash of a verifier, which a signature bears.
func keyID(verifier string) string {
	parts := strings.SplitN(verifier, "+", 3)
	if len(parts) < 3 {
		return verifier
	}
	return parts[0] + "+" + strings.ToLower(parts[1])
}

// keyName is the name in a verifier.
func keyName(verifier string) string {
	name, _, _ := strings.Cut(verifier, "+")
	return name
}

// publicKey is what a verifier checks with, which two names can share.
func publicKey(verifier string) (string, error) {
	if _, err := note.NewVerifier(verifier); err != nil {
		return "", err
	}
	key, err := base64.StdEncoding.DecodeString(strings.SplitN(verifier, "+", 3)[2])
	if err != nil || len(key) != ed25519.PublicKeySize+1 {
		return "", errors.New("not an ed25519 key")
	}
	return string(key), nil
}
