package mailbox

import (
	"crypto/tls"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapclient"
)

// dovecot is an instance of the Dovecot server of its own, with one account in
// Maildir, on loopback, with TLS demanded.
type dovecot struct {
	testing.TB
	ca        *authority
	dir       string
	port      int // TLS from the first byte
	plainPort int // STARTTLS
	cmd       *exec.Cmd
	uid       int
	delivered int
}

// newDovecot starts the server. Without it the test is skipped, and fails where
// DUNLIN_CI is set.
func newDovecot(t testing.TB) *dovecot {
	t.Helper()
	bin, err := exec.LookPath("dovecot")
	if err != nil {
		if _, err = os.Stat("/usr/sbin/dovecot"); err == nil {
			bin = "/usr/sbin/dovecot"
		}
	}
	if err != nil {
		if os.Getenv("DUNLIN_CI") != "" {
			t.Fatal("the Dovecot IMAP server is missing (Debian: dovecot-imapd)")
		}
		t.Skip("the Dovecot IMAP server is not installed (Debian: dovecot-imapd)")
	}
	// A short path: the names of its sockets are limited to about 100 bytes.
	dir, err := os.MkdirTemp("", "dovecot")
	if err != nil {
		t.Fatal(err)
	}
	d := &dovecot{TB: t, ca: newAuthority(t), dir: dir, port: freePort(t), plainPort: freePort(t)}
	t.Cleanup(func() {
		d.kill()
		os.RemoveAll(dir)
	})
	d.configure()
	d.start(bin)
	return d
}

func freePort(t testing.TB) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

func (d *dovecot) configure() {
	d.Helper()
	me, err := user.Current()
	if err != nil {
		d.Fatal(err)
	}
	mailUser, workers := me, me.Username
	users := fmt.Sprintf("default_internal_user = %s\ndefault_internal_group = %s\ndefault_login_user = %s\n", workers, groupOf(d, me), workers)
	if me.Uid == "0" { // the server gives no mail to root
		if mailUser, err = user.Lookup("nobody"); err != nil {
			d.Fatal(err)
		}
		users = ""
	}
	d.uid, _ = strconv.Atoi(mailUser.Uid)
	gid, _ := strconv.Atoi(mailUser.Gid)
	cert, key := d.ca.issue("127.0.0.1", today.AddDate(50, 0, 0))
	d.write("cert.pem", string(cert))
	d.write("key.pem", string(key))
	d.write("users", account+":{PLAIN}"+secret+":"+mailUser.Uid+":"+mailUser.Gid+"::"+d.dir+"/home\n")
	for _, p := range []string{d.dir, d.dir + "/home"} {
		_ = os.Mkdir(p, 0o755)
		if err := os.Chmod(p, 0o755); err != nil {
			d.Fatal(err)
		}
	}
	if err := os.Chown(d.dir+"/home", d.uid, gid); err != nil {
		d.Fatal(err)
	}
	d.write("dovecot.conf", fmt.Sprintf(`base_dir = %[1]s/run
state_dir = %[1]s/state
log_path = %[1]s/log
protocols = imap
listen = 127.0.0.1
%[2]sfirst_valid_uid = %[3]d
first_valid_gid = 0
mail_location = maildir:~/Maildir
ssl = required
ssl_cert = <%[1]s/cert.pem
ssl_key = <%[1]s/key.pem
disable_plaintext_auth = yes
mail_max_userip_connections = 50
passdb {
  driver = passwd-file
  args = scheme=PLAIN username_format=%%u %[1]s/users
}
userdb {
  driver = passwd-file
  args = username_format=%%u %[1]s/users
}
namespace inbox {
  inbox = yes
  separator = /
}
service imap-login {
  chroot =
  inet_listener imap {
    port = %[4]d
  }
  inet_listener imaps {
    port = %[5]d
    ssl = yes
  }
}
service anvil {
  chroot =
}
`, d.dir, users, d.uid, d.plainPort, d.port))
}

func groupOf(t testing.TB, u *user.User) string {
	g, err := user.LookupGroupId(u.Gid)
	if err != nil {
		t.Fatal(err)
	}
	return g.Name
}

func (d *dovecot) write(name, text string) {
	d.Helper()
	if err := os.WriteFile(filepath.Join(d.dir, name), []byte(text), 0o644); err != nil {
		d.Fatal(err)
	}
}

// start runs the server in the foreground and waits until it answers.
func (d *dovecot) start(bin string) {
	d.Helper()
	d.cmd = exec.Command(bin, "-F", "-c", filepath.Join(d.dir, "dovecot.conf"))
	d.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := d.cmd.Start(); err != nil {
		d.Fatal(err)
	}
	for range 200 {
		if c, err := d.dial(); err == nil {
			_, err := c.Select("INBOX", nil).Wait() // makes its Maildir
			if c.Close(); err == nil {
				return
			}
		}
		time.Sleep(25 * time.Millisecond)
	}
	log, _ := os.ReadFile(filepath.Join(d.dir, "log"))
	d.Fatalf("the server does not start:\n%s", log)
}

// kill ends the server and all its workers at once, as a crash would.
func (d *dovecot) kill() {
	if d.cmd == nil || d.cmd.Process == nil {
		return
	}
	_ = syscall.Kill(-d.cmd.Process.Pid, syscall.SIGKILL)
	_ = d.cmd.Wait()
	d.cmd = nil
	// Workers that outlive their master notice the closed pipe; wait for the port.
	for range 100 {
		if c, err := net.Dial("tcp", d.addr()); err != nil {
			return
		} else {
			c.Close()
		}
		time.Sleep(20 * time.Millisecond)
	}
}

func (d *dovecot) restart() {
	d.Helper()
	d.kill()
	_ = os.RemoveAll(filepath.Join(d.dir, "run"))
	bin, err := exec.LookPath("dovecot")
	if err != nil {
		bin = "/usr/sbin/dovecot"
	}
	d.start(bin)
}

func (d *dovecot) addr() string { return fmt.Sprintf("127.0.0.1:%d", d.port) }

func (d *dovecot) dial() (*imapclient.Client, error) {
	conn, err := tls.Dial("tcp", d.addr(), &tls.Config{RootCAs: d.ca.pool, ServerName: "127.0.0.1"})
	if err != nil {
		return nil, err
	}
	c := imapclient.New(conn, nil)
	if err := c.Login(account, secret).Wait(); err != nil {
		c.Close()
		return nil, err
	}
	return c, nil
}

// client gives a connection of the test's own.
func (d *dovecot) client() *imapclient.Client {
	d.Helper()
	c, err := d.dial()
	if err != nil {
		d.Fatal(err)
	}
	d.Cleanup(func() { c.Close() })
	return c
}

func (d *dovecot) create(folders ...string) {
	d.Helper()
	c := d.client()
	for _, f := range folders {
		if err := c.Create(f, nil).Wait(); err != nil {
			d.Fatal(err)
		}
	}
}

func appendTo(t testing.TB, c *imapclient.Client, folder string, raw []byte) {
	t.Helper()
	cmd := c.Append(folder, int64(len(raw)), nil)
	if _, err := cmd.Write(raw); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
}

// deliver puts mail into the inbox as a delivery agent does (Maildir).
func (d *dovecot) deliver(raws ...[]byte) {
	d.Helper()
	dir := filepath.Join(d.dir, "home", "Maildir")
	for _, raw := range raws {
		d.delivered++
		name := fmt.Sprintf("%d.M%dP1.test", 1774861200+d.delivered, d.delivered)
		tmp := filepath.Join(dir, "tmp", name)
		if err := os.WriteFile(tmp, raw, 0o644); err != nil {
			d.Fatal(err)
		}
		if err := os.Chown(tmp, d.uid, -1); err != nil {
			d.Fatal(err)
		}
		if err := os.Rename(tmp, filepath.Join(dir, "new", name)); err != nil {
			d.Fatal(err)
		}
	}
}

// count gives how many messages are in a folder, and how many of them are unseen.
func (d *dovecot) count(folder string) (all, unseen uint32) {
	d.Helper()
	s, err := d.client().Status(folder, &imap.StatusOptions{NumMessages: true, NumUnseen: true}).Wait()
	if err != nil {
		d.Fatal(err)
	}
	return *s.NumMessages, *s.NumUnseen
}

// validity gives that of the inbox's numbers.
func (d *dovecot) validity() uint32 {
	d.Helper()
	s, err := d.client().Status("INBOX", &imap.StatusOptions{UIDValidity: true}).Wait()
	if err != nil {
		d.Fatal(err)
	}
	return s.UIDValidity
}

// box makes a Box for the server.
func (d *dovecot) box(b *bench, change ...func(*Options)) *Box {
	d.Helper()
	return b.box(d.addr(), append([]func(*Options){func(o *Options) { o.Security, o.RootCAs = TLS, d.ca.pool }}, change...)...)
}
