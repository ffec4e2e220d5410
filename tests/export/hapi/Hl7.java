// Reads HL7 version 2 as HAPI does, and nothing of how it was written is known here.
//   java -cp 'JARS/*' Hl7.java read FILE        every message of a file, one JSON object a line, or what is wrong with one
//   java -cp 'JARS/*' Hl7.java listen PORT tls  the same for what comes over MLLP; `plain` without TLS. Standard input says
//                                               (`mutual`: and asks for a certificate) from now on with what code it acknowledges, and a text for people: `AE no`; behind
//                                               an @ stands a word: only messages with it are answered so, the others AA
import ca.uhn.hl7v2.AcknowledgmentCode;
import ca.uhn.hl7v2.DefaultHapiContext;
import ca.uhn.hl7v2.HL7Exception;
import ca.uhn.hl7v2.model.Message;
import ca.uhn.hl7v2.model.v251.message.ORU_R01;
import ca.uhn.hl7v2.parser.UnexpectedSegmentBehaviourEnum;
import ca.uhn.hl7v2.protocol.ReceivingApplication;
import ca.uhn.hl7v2.util.Hl7InputStreamMessageStringIterator;
import ca.uhn.hl7v2.util.StandardSocketFactory;
import ca.uhn.hl7v2.util.Terser;
import ca.uhn.hl7v2.util.idgenerator.InMemoryIDGenerator;
import ca.uhn.hl7v2.validation.impl.ValidationContextFactory;
import java.io.BufferedReader;
import java.io.FileInputStream;
import java.io.IOException;
import java.io.InputStreamReader;
import java.io.PrintStream;
import java.net.ServerSocket;
import java.nio.charset.StandardCharsets;
import java.util.Map;
import javax.net.ssl.SSLServerSocket;

class Hl7 {
    static final PrintStream out = new PrintStream(System.out, true, StandardCharsets.UTF_8);
    static volatile String says = "AA";

    public static void main(String[] args) throws Exception {
        var context = new DefaultHapiContext();
        context.setValidationContext(ValidationContextFactory.defaultValidation());
        var strict = context.getParserConfiguration();
        strict.setUnexpectedSegmentBehaviour(UnexpectedSegmentBehaviourEnum.THROW_HL7_EXCEPTION);
        strict.setAllowUnknownVersions(false);
        // Else it counts in a file of the folder that it is run in.
        strict.setIdGenerator(new InMemoryIDGenerator());
        if (args[0].equals("read")) {
            var reader = new InputStreamReader(new FileInputStream(args[1]), StandardCharsets.UTF_8);
            var texts = new Hl7InputStreamMessageStringIterator(reader);
            while (texts.hasNext()) {
                // It skips the head of a batch, and takes the trailer for the last message's.
                String text = texts.next().replaceAll("(?m)^[BF]TS\\|.*\\R?", "");
                try {
                    out.println(object(context.getPipeParser().parse(text)));
                } catch (HL7Exception e) {
                    out.println("{\"wrong\":" + quoted(e.getMessage()) + "}");
                }
            }
            return;
        }
        context.setSocketFactory(new StandardSocketFactory() {
            @Override public ServerSocket createTlsServerSocket() throws IOException {
                var socket = (SSLServerSocket) super.createTlsServerSocket();
                socket.setNeedClientAuth(args[2].equals("mutual"));
                return socket;
            }
        });
        var server = context.newServer(Integer.parseInt(args[1]), !args[2].equals("plain"));
        server.registerApplication(new ReceivingApplication<Message>() {
            public boolean canProcess(Message message) {
                return true;
            }

            public Message processMessage(Message message, Map<String, Object> about) {
                try {
                    out.println(object(message));
                    var only = says.split("@", 2);
                    var hit = only.length < 2 || message.encode().contains(only[1]);
                    var words = (hit ? only[0] : "AA").split(" ", 2);
                    var why = words.length > 1 ? new HL7Exception(words[1]) : null;
                    return message.generateACK(AcknowledgmentCode.valueOf(words[0]), why);
                } catch (Exception e) {
                    throw new RuntimeException(e);
                }
            }
        });
        server.startAndWait();
        out.println("{\"listening\":true}");
        var input = new BufferedReader(new InputStreamReader(System.in, StandardCharsets.UTF_8));
        for (String line = input.readLine(); line != null; line = input.readLine()) {
            says = line;
            out.println("{\"says\":" + quoted(line) + "}");
        }
        server.stop();
        System.exit(0);
    }

    /** What stands at each of these places, and each observation with its notes. */
    static String object(Message message) throws Exception {
        var terser = new Terser(message);
        var text = new StringBuilder("{");
        String[] places = {
            "MSH-3-1", "MSH-4-1", "MSH-5-1", "MSH-6-1", "MSH-6-2", "MSH-7-1", "MSH-9-1", "MSH-9-2", "MSH-9-3", "MSH-10",
            "MSH-12-1", "MSH-18", "/.PID-3-1", "/.PID-3-4-1", "/.PID-3-5", "/.PID-3(1)-1", "/.PID-5-1-1", "/.PID-5-7", "/.PID-7-1",
            "/.OBR-3-1", "/.OBR-3-3", "/.OBR-4-1", "/.OBR-4-3", "/.OBR-4-4", "/.OBR-4-6", "/.OBR-7-1", "/.OBR-8-1", "/.OBR-22-1",
            "/.OBR-25",
        };
        for (String place : places) {
            text.append(quoted(place.replace("/.", ""))).append(':').append(quoted(terser.get(place))).append(',');
        }
        var results = ((ORU_R01) message).getPATIENT_RESULT().getORDER_OBSERVATION();
        text.append("\"notes\":[");
        for (int n = 0; n < results.getNTEReps(); n++) {
            text.append(n > 0 ? "," : "").append(quoted(results.getNTE(n).getNte3_Comment(0).getValue()));
        }
        text.append("],\"OBX\":[");
        for (int n = 0; n < results.getOBSERVATIONReps(); n++) {
            var observation = results.getOBSERVATION(n);
            var obx = observation.getOBX();
            text.append(n > 0 ? ",{" : "{");
            for (String field : new String[] {
                "1", "2", "3-1", "3-3", "3-4", "3-6", "4", "5", "6-1", "6-2", "6-3", "11", "14-1", "18-1", "18-3", "18-4",
            }) {
                var parts = (field + "-1-1").split("-");
                int at = Integer.parseInt(parts[0]), component = Integer.parseInt(parts[1]);
                text.append(quoted(field)).append(':').append(quoted(Terser.get(obx, at, 0, component, 1))).append(',');
            }
            var note = observation.getNTEReps() > 0 ? observation.getNTE().getNte3_Comment(0).getValue() : null;
            text.append("\"note\":").append(quoted(note)).append('}');
        }
        return text.append("],\"text\":").append(quoted(message.encode())).append('}').toString();
    }

    static String quoted(String text) {
        if (text == null) {
            return "null";
        }
        var quoted = new StringBuilder("\"");
        text.chars().forEach(c -> {
            if (c == '"' || c == '\\') {
                quoted.append('\\').append((char) c);
            } else if (c < 0x20) {
                quoted.append(String.format("\\u%04x", c));
            } else {
                quoted.append((char) c);
            }
        });
        return quoted.append('"').toString();
    }
}
