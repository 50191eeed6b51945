package catalogue

import "encoding/json"

// AsJSON is a catalogue file, in YAML, as the shipped one is embedded.
func AsJSON(text []byte) ([]byte, error) {
	f, err := parse(text)
	if err != nil {
		return nil, err
	}
	return json.Marshal(f)
}
