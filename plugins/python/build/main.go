// Command build makes one executable file of the rule plugin in Python beside it:
//
//	go run ./plugins/python/build OUT
//
// It validates the table, so that its author sees what is wrong, and puts the
// contract's message descriptors and the table's digest into the file: then the
// plugin needs no generated code, and its release is a single file to sign.
package main

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulewire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/descriptorpb"
)

const interpreter = "#!/usr/bin/python3\n"

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: build OUT; run it from the module's root")
		os.Exit(2)
	}
	if err := build(filepath.Join("plugins", "python"), os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "build:", err)
		os.Exit(1)
	}
}

// build packs the plugin twice: first without a digest, to ask it for its table.
func build(folder, out string) error {
	var contract descriptorpb.FileDescriptorSet
	gather(&contract, map[string]bool{}, pluginv1.File_rootward_plugin_v1_plugin_proto)
	descriptors, err := proto.MarshalOptions{Deterministic: true}.Marshal(&contract)
	if err != nil {
		return err
	}
	files := map[string][]byte{"contract.binpb": descriptors, "digest.txt": nil}
	for _, name := range []string{"__main__.py", "hosting.py", "rules.py"} {
		if files[name], err = os.ReadFile(filepath.Join(folder, name)); err != nil {
			return err
		}
	}
	if err := pack(out, files); err != nil {
		return err
	}
	set, err := tableOf(out)
	if err != nil {
		return err
	}
	files["digest.txt"] = []byte(set.Ref.Digest)
	return pack(out, files)
}

// gather adds a file after those that it imports.
func gather(set *descriptorpb.FileDescriptorSet, seen map[string]bool, f protoreflect.FileDescriptor) {
	if seen[f.Path()] {
		return
	}
	seen[f.Path()] = true
	for i := range f.Imports().Len() {
		gather(set, seen, f.Imports().Get(i).FileDescriptor)
	}
	set.File = append(set.File, protodesc.ToFileDescriptorProto(f))
}

func tableOf(plugin string) (*rules.Set, error) {
	path, err := filepath.Abs(plugin)
	if err != nil {
		return nil, err
	}
	cmd := exec.Command(path, "--table")
	cmd.Stderr = os.Stderr
	text, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("asking the plugin for its table: %w; it needs python3-grpcio, python3-protobuf and python3-cryptography", err)
	}
	var wire ruletablev1.Table
	if err := proto.Unmarshal(text, &wire); err != nil {
		return nil, err
	}
	table, err := rulewire.DecodeTable(&wire)
	if err != nil {
		return nil, err
	}
	return rules.NewSet(table)
}

// pack writes an executable zip archive that Python runs as a program. Its bytes
// depend on the files alone.
func pack(out string, files map[string][]byte) error {
	var b bytes.Buffer
	b.WriteString(interpreter)
	z := zip.NewWriter(&b)
	z.SetOffset(int64(b.Len()))
	for _, name := range []string{"__main__.py", "contract.binpb", "digest.txt", "hosting.py", "rules.py"} {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
		if err != nil {
			return err
		}
		if _, err := io.Copy(w, bytes.NewReader(files[name])); err != nil {
			return err
		}
	}
	if err := z.Close(); err != nil {
		return err
	}
	if err := os.RemoveAll(out); err != nil {
		return err
	}
	return os.WriteFile(out, b.Bytes(), 0o755)
}
