package config

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// Secrets is what a channel needs to know and nobody may read in a log.
type Secrets struct {
	URL      string // of a webhook
	Key      string // that messages are signed with, "" for none
	Password string // of a mail server's user, "" for none
}

// String shows nothing of them.
func (Secrets) String() string { return "***" }

// GoString shows nothing of them either.
func (Secrets) GoString() string { return "***" }

// Secrets reads what the channel keeps in files and in the environment. An error names
// the file or the variable, never what it holds.
func (c *Channel) Secrets(env func(string) string) (s Secrets, err error) {
	s.URL = string(c.URL)
	for _, from := range []struct {
		to                  *string
		name, file, envName string
	}{
		{&s.URL, "url", c.URLFile, c.URLEnv},
		{&s.Key, "secret", c.SecretFile, c.SecretEnv},
		{&s.Password, "password", c.PasswordFile, c.PasswordEnv},
	} {
		key, place := from.name+"_file", from.file
		var text string
		switch {
		case from.file != "":
			text, err = secretFile(from.file)
		case from.envName != "":
			key, place = from.name+"_env", from.envName
			text, err = env(from.envName), nil
		default:
			continue
		}
		if err == nil {
			err = checkSecret(from.name, text)
		}
		if err != nil {
			return Secrets{}, fmt.Errorf("channel %s: %s %s: %w", c.Name, key, place, err)
		}
		*from.to = text
	}
	return s, nil
}

func secretFile(name string) (string, error) {
	b, err := os.ReadFile(name)
	if err != nil {
		var path *fs.PathError
		if errors.As(err, &path) {
			err = path.Err // the name stands before it already
		}
		return "", err
	}
	return string(bytes.TrimSpace(b)), nil
}

// checkSecret says what is wrong with a secret without showing it.
func checkSecret(what, text string) error {
	switch {
	case text == "":
		return errors.New("it is not set or empty")
	case len(text) > 4096 || !plain(text):
		return errors.New("allowed is one line of up to 4096 bytes")
	case what == "url":
		_, err := webAddress(text)
		return err
	}
	return nil
}
