package tabletext

import pb "example.org/rootward/proto/gen/rootward/ruletable/v1"

// ReadMessage reads a table without asking whether it is valid.
func ReadMessage(text []byte) (*pb.Table, error) {
	r := newReader("written.yaml")
	var message pb.Table
	if body := r.parse(text); body != nil {
		r.message("", body, message.ProtoReflect())
	}
	if len(r.faults) > 0 {
		return nil, r.faults
	}
	return &message, nil
}
