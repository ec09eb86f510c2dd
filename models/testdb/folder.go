//go:build unix

package testdb

import (
	"os"
	"path/filepath"
	"syscall"
	"time"
)

// Folders lie directly in /tmp because the path of a Unix socket may have about a hundred characters at most.
const (
	folderRoot   = "/tmp"
	folderPrefix = "palmero-postgres-"
	lockName     = "lock"
)

// makeFolder makes the server's folder and gives it to the account that the server runs as. The lock says that the
// folder is in use, for as long as this process lives.
func makeFolder(account *syscall.Credential) (folder string, lock *os.File, err error) {
	folder, err = os.MkdirTemp(folderRoot, folderPrefix)
	if err != nil {
		return "", nil, err
	}
	defer func() {
		if err != nil {
			os.RemoveAll(folder)
		}
	}()
	if account != nil {
		if err := os.Chown(folder, int(account.Uid), int(account.Gid)); err != nil {
			return "", nil, err
		}
	}
	lock, err = os.Create(filepath.Join(folder, lockName))
	if err != nil {
		return "", nil, err
	}
	return folder, lock, syscall.Flock(int(lock.Fd()), syscall.LOCK_EX)
}

// removeAbandoned removes the folders of processes that were killed before they could. The age spares a folder whose
// owner is just about to lock it.
func removeAbandoned() {
	folders, _ := filepath.Glob(filepath.Join(folderRoot, folderPrefix+"*")) // only a malformed pattern fails
	for _, folder := range folders {
		info, err := os.Lstat(folder)
		if err != nil || !info.IsDir() || time.Since(info.ModTime()) < time.Minute {
			continue
		}
		lock, err := os.Open(filepath.Join(folder, lockName))
		if err != nil {
			continue
		}
		if syscall.Flock(int(lock.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil {
			os.RemoveAll(folder)
		}
		lock.Close()
	}
}
