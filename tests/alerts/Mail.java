// Reads mails as Apache James mime4j does, strictly, and nothing of how they were written is known here.
//   java -cp 'JARS/*' Mail.java FILE…    one JSON object a file: what it says, or what is wrong with it
import java.io.ByteArrayInputStream;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import org.apache.james.mime4j.codec.DecodeMonitor;
import org.apache.james.mime4j.dom.Message;
import org.apache.james.mime4j.dom.SingleBody;
import org.apache.james.mime4j.dom.field.ParsedField;
import org.apache.james.mime4j.field.DefaultFieldParser;
import org.apache.james.mime4j.message.DefaultMessageBuilder;
import org.apache.james.mime4j.stream.Field;
import org.apache.james.mime4j.stream.MimeConfig;

class Mail {
    static final PrintStream out = new PrintStream(System.out, true, StandardCharsets.UTF_8);

    public static void main(String[] args) throws Exception {
        for (String file : args) {
            var wrong = new ArrayList<String>();
            byte[] octets = Files.readAllBytes(Path.of(file));
            lines(octets, wrong);
            try {
                read(octets, wrong);
            } catch (Exception e) {
                wrong.add(e.toString());
                out.println("{\"wrong\":" + list(wrong) + "}");
            }
        }
    }

    /** RFC 5322, section 2.1 and 2.3, and RFC 2045, section 2.7: what a line may be before anybody parses it. */
    static void lines(byte[] octets, List<String> wrong) {
        int length = 0;
        for (int n = 0; n < octets.length; n++) {
            int octet = octets[n] & 0xff;
            boolean ends = octet == '\r' && n + 1 < octets.length && octets[n + 1] == '\n';
            if (ends) {
                n++;
                length = 0;
                continue;
            }
            if (octet == '\r' || octet == '\n') wrong.add("half a line break at octet " + n);
            if (octet == 0 || octet > 126 && octet != '\t') wrong.add("octet " + octet + " at " + n + " is not 7bit");
            if (++length > 998) wrong.add("a line longer than 998 octets");
        }
    }

    static void read(byte[] octets, List<String> wrong) throws Exception {
        var builder = new DefaultMessageBuilder();
        builder.setMimeEntityConfig(MimeConfig.STRICT);
        builder.setDecodeMonitor(DecodeMonitor.STRICT);
        builder.setFieldParser(DefaultFieldParser.getParser());
        Message mail = builder.parseMessage(new ByteArrayInputStream(octets));
        var names = new ArrayList<String>();
        for (Field field : mail.getHeader().getFields()) {
            names.add(field.getName());
            ParsedField parsed = field instanceof ParsedField
                ? (ParsedField) field
                : DefaultFieldParser.getParser().parse(field, DecodeMonitor.STRICT);
            if (!parsed.isValidField()) wrong.add(field.getName() + ": " + parsed.getParseException());
        }
        var body = (SingleBody) mail.getBody();
        String text = new String(body.getInputStream().readAllBytes(), StandardCharsets.UTF_8);
        out.println("{\"wrong\":" + list(wrong) + ",\"names\":" + list(names)
            + ",\"subject\":" + quoted(mail.getSubject()) + ",\"from\":" + quoted(String.valueOf(mail.getFrom()))
            + ",\"to\":" + quoted(String.valueOf(mail.getTo())) + ",\"date\":" + (mail.getDate() != null)
            + ",\"id\":" + quoted(mail.getMessageId()) + ",\"type\":" + quoted(mail.getMimeType())
            + ",\"charset\":" + quoted(mail.getCharset()) + ",\"text\":" + quoted(text) + "}");
    }

    static String list(List<String> texts) {
        var parts = new ArrayList<String>();
        for (String text : texts) parts.add(quoted(text));
        return "[" + String.join(",", parts) + "]";
    }

    static String quoted(String text) {
        if (text == null) return "null";
        var quoted = new StringBuilder("\"");
        for (char c : text.toCharArray()) {
            if (c == '"' || c == '\\') quoted.append('\\').append(c);
            else if (c < ' ') quoted.append(String.format("\\u%04x", (int) c));
            else quoted.append(c);
        }
        return quoted.append('"').toString();
    }
}
